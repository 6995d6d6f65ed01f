from django.urls import path

from pourwright.workshop.trace import views

app_name = "trace"
urlpatterns = [
    path("", views.index, name="index"),
    path("orders/<str:number>/", views.order, name="order"),
    path("<str:code>/", views.lot, name="lot"),
    path("<str:code>/sheet/", views.sheet, name="sheet"),
]
