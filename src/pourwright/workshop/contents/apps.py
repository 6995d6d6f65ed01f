from django.apps import AppConfig


class ContentsConfig(AppConfig):
    name = "pourwright.workshop.contents"
    label = "contents"
