from django.apps import AppConfig


class FormulasConfig(AppConfig):
    name = "pourwright.workshop.formulas"
    label = "formulas"
