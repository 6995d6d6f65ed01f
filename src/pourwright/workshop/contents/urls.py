from django.urls import path

from pourwright.workshop.contents import views

app_name = "contents"
urlpatterns = [
    path("", views.index, name="index"),
    path("instruments/new/", views.new_instrument, name="new_instrument"),
    path("instruments/<int:pk>/", views.instrument, name="instrument"),
    path("target/<int:pk>/", views.target, name="target"),
    path("pour/<int:pk>/", views.filling, name="filling"),
    path("pour/<int:pk>/bench/", views.filling_bench, name="filling_bench"),
    path("lot/<str:code>/", views.lot, name="lot"),
    path("lot/<str:code>/bench/", views.lot_bench, name="lot_bench"),
]
