from django.urls import path

from pourwright.workshop.orders import views

app_name = "orders"
urlpatterns = [
    path("", views.index, name="index"),
]
