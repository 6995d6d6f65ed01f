from django.urls import path

from pourwright.workshop.pours import views

app_name = "pours"
urlpatterns = [
    path("", views.index, name="index"),
    path("new/", views.new, name="new"),
    path("melters/", views.melters, name="melters"),
    path("melters/new/", views.melter_new, name="melter_new"),
    path("melters/<int:pk>/", views.melter, name="melter"),
    path("<str:number>/", views.pour, name="pour"),
    path("<str:number>/sheet.pdf", views.sheet, name="sheet"),
    path("<str:number>/bench/", views.bench, name="bench"),
    path("<str:number>/open/", views.open_at_bench, name="open"),
    path("<str:number>/close/", views.close, name="close"),
    path("<str:number>/abandon/", views.abandon, name="abandon"),
    path("<str:number>/reopen/", views.reopen, name="reopen"),
]
