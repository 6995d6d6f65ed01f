from django.apps import AppConfig


class StoresConfig(AppConfig):
    name = "pourwright.workshop.stores"
    label = "stores"
