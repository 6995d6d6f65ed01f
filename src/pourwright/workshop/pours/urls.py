from django.urls import path

from pourwright.workshop.pours import views

app_name = "pours"
urlpatterns = [
    path("", views.index, name="index"),
]
