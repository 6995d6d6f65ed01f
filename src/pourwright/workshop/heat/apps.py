from django.apps import AppConfig


class HeatConfig(AppConfig):
    name = "pourwright.workshop.heat"
    label = "heat"
