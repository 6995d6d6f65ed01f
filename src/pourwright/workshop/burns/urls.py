"""Test burns: the book, the bench at a burn, and what to burn next."""

from django.urls import path

from pourwright.workshop.burns import bench_views, views

app_name = "burns"
urlpatterns = [
    path("", views.index, name="index"),
    path("limits/", views.limits, name="limits"),
    path("sets/new/", views.set_new, name="set_new"),
    path("sets/<int:pk>/", views.side_by_side, name="set"),
    path("take/<int:pk>/", views.take, name="take"),
    path("next/<int:pk>/", views.next_burn, name="next"),
    path("design/<int:pk>/", views.design, name="design"),
    path("burn/<int:pk>/", bench_views.burn, name="burn"),
    path("burn/<int:pk>/read/<str:group>/", bench_views.read, name="read"),
    path("burn/<int:pk>/full/", bench_views.full, name="full"),
    path("burn/<int:pk>/photo/", bench_views.photo, name="photo"),
    path("burn/<int:pk>/out/", bench_views.out, name="out"),
    path("burn/<int:pk>/after/", bench_views.after, name="after"),
    path("burn/<int:pk>/anew/", bench_views.anew, name="anew"),
    path("burn/<int:pk>/leave-out/", bench_views.leave_out, name="leave_out"),
    path("readings/<int:pk>/leave-out/", bench_views.leave_out_reading, name="leave_out_reading"),
    path("photos/<int:pk>.jpg", bench_views.picture, name="picture"),
    path("photos/<int:pk>/leave-out/", bench_views.leave_out_photo, name="leave_out_photo"),
    path("<str:number>/", views.piece, name="piece"),
    path("<str:number>/light/", views.light, name="light"),
]
