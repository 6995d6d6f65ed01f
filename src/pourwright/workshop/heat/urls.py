from django.urls import path

from pourwright.workshop.heat import views

app_name = "heat"
urlpatterns = [
    path("", views.score, name="score"),
    path("designs/<int:pk>/setting/", views.setting, name="setting"),
    path("designs/<int:pk>/burning/", views.burning, name="burning"),
    path("melters/<int:pk>/", views.melter, name="melter"),
    path("pours/<str:number>/melt/", views.pour_melt, name="pour_melt"),
    path("materials/<int:pk>/", views.material, name="material"),
    path("flame/", views.flame, name="flame"),
    path("forecasts/<int:pk>/", views.forecast, name="forecast"),
]
