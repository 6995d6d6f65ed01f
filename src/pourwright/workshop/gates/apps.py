from django.apps import AppConfig


class GatesConfig(AppConfig):
    name = "pourwright.workshop.gates"
    label = "gates"
