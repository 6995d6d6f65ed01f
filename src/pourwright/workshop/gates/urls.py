from django.urls import path

from pourwright.workshop.gates import views

app_name = "gates"
urlpatterns = [
    path("<str:kind>/<int:pk>/<str:what>/", views.decide, name="decide"),
]
