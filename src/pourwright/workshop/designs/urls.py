from django.urls import path

from pourwright.workshop.designs import views

app_name = "designs"
urlpatterns = [
    path("", views.index, name="index"),
]
