from django.urls import path

from pourwright.workshop.formulas import views

app_name = "formulas"
urlpatterns = [
    path("", views.index, name="index"),
    path("new/", views.new, name="new"),
    path("<int:pk>/", views.formula, name="formula"),
    path("<int:pk>/hazard/", views.hazard, name="hazard"),
    path("<int:pk>/number/", views.number, name="number"),
    path("<int:pk>/change/", views.edit, name="edit"),
    path("<int:pk>/retire/", views.retire, name="retire"),
]
