from django.apps import AppConfig


class PanelsConfig(AppConfig):
    name = "pourwright.workshop.panels"
    label = "panels"
