from django.urls import path

from pourwright.workshop.designs import views, wick_views

app_name = "designs"
urlpatterns = [
    path("", views.index, name="index"),
    path("new/", views.new, name="new"),
    path("<int:pk>/", views.design, name="design"),
    path("<int:pk>/change/", views.edit, name="edit"),
    path("<int:pk>/wicks/", wick_views.wicks, name="wicks"),
    path("<int:pk>/jig/", wick_views.jig, name="jig"),
    path("<int:pk>/jig.<str:kind>", wick_views.jig_file, name="jig_file"),
    path("<int:pk>/retire/", views.retire, name="retire"),
]
