from django.apps import AppConfig


class ShelfConfig(AppConfig):
    name = "pourwright.workshop.shelf"
    label = "shelf"
