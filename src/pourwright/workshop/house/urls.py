from django.urls import path

from pourwright.workshop.house import views

urlpatterns = [
    path("", views.today, name="today"),
    path("find/", views.find, name="find"),
    path("workshop/", views.workshop, name="workshop"),
    path("exchange/", views.exchange, name="exchange"),
]
