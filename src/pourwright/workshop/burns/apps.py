from django.apps import AppConfig


class BurnsConfig(AppConfig):
    name = "pourwright.workshop.burns"
    label = "burns"
