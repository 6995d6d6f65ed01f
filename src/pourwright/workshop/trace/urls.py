from django.urls import path

from pourwright.workshop.trace import views

app_name = "trace"
urlpatterns = [
    path("", views.index, name="index"),
]
