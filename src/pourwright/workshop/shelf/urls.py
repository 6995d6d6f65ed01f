from django.urls import path

from pourwright.workshop.shelf import views

app_name = "shelf"
urlpatterns = [
    path("", views.index, name="index"),
]
