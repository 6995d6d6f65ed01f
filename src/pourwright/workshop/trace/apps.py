from django.apps import AppConfig


class TraceConfig(AppConfig):
    name = "pourwright.workshop.trace"
    label = "trace"
