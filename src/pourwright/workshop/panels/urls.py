from django.urls import path

from pourwright.workshop.panels import views

app_name = "panels"
urlpatterns = [
    path("", views.index, name="index"),
    path("new/", views.new, name="new"),
    path("designs/<int:pk>/", views.design, name="design"),
    path("<str:number>/", views.panel, name="panel"),
    path("<str:number>/answer/", views.answer, name="answer"),
    path("<str:number>/bring-in/", views.bring_in, name="bring_in"),
    path("<str:number>/answers.csv", views.answers_file, name="answers_file"),
    path("<str:number>/blind-sheets.pdf", views.blind_sheets, name="blind_sheets"),
    path("<str:number>/key.pdf", views.key, name="key"),
]
