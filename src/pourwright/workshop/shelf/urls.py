from django.urls import path

from pourwright.workshop.shelf import views

app_name = "shelf"
urlpatterns = [
    path("", views.index, name="index"),
    path("<str:code>/", views.lot, name="lot"),
    path("<str:code>/paper/", views.paper, name="paper"),
]
