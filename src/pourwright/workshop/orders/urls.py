from django.urls import path

from pourwright.workshop.orders import views

app_name = "orders"
urlpatterns = [
    path("", views.index, name="index"),
    path("new/", views.new, name="new"),
    path("customers/", views.customers, name="customers"),
    path("customers/new/", views.customer_new, name="customer_new"),
    path("customers/<int:pk>/", views.customer, name="customer"),
    path("customers/<int:pk>/edit/", views.customer_edit, name="customer_edit"),
    path("<str:number>/", views.order, name="order"),
    path("<str:number>/edit/", views.edit, name="edit"),
    path("<str:number>/packing/<int:pk>/", views.packing, name="packing"),
]
