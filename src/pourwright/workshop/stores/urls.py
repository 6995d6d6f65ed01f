from django.urls import path

from pourwright.workshop.stores import views

app_name = "stores"
urlpatterns = [
    path("", views.index, name="index"),
]
