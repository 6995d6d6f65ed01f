from django.apps import AppConfig


class HouseConfig(AppConfig):
    name = "pourwright.workshop.house"
    label = "house"
