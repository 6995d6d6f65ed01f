from django.urls import path

from pourwright.workshop.designs import views

app_name = "designs"
urlpatterns = [
    path("", views.index, name="index"),
    path("new/", views.new, name="new"),
    path("<int:pk>/", views.design, name="design"),
    path("<int:pk>/change/", views.edit, name="edit"),
    path("<int:pk>/retire/", views.retire, name="retire"),
]
