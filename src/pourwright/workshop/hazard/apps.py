from django.apps import AppConfig


class HazardConfig(AppConfig):
    name = "pourwright.workshop.hazard"
    label = "hazard"
