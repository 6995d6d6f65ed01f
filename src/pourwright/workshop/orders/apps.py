from django.apps import AppConfig


class OrdersConfig(AppConfig):
    name = "pourwright.workshop.orders"
    label = "orders"
