from django.apps import AppConfig


class LabelsConfig(AppConfig):
    name = "pourwright.workshop.labels"
    label = "labels"
