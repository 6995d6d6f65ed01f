from django.urls import path

from pourwright.workshop.formulas import views

app_name = "formulas"
urlpatterns = [
    path("", views.index, name="index"),
]
