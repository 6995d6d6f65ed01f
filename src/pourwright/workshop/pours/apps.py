from django.apps import AppConfig


class PoursConfig(AppConfig):
    name = "pourwright.workshop.pours"
    label = "pours"
