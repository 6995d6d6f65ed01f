from django.apps import AppConfig


class DesignsConfig(AppConfig):
    name = "pourwright.workshop.designs"
    label = "designs"
