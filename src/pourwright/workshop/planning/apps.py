from django.apps import AppConfig


class PlanningConfig(AppConfig):
    name = "pourwright.workshop.planning"
    label = "planning"
