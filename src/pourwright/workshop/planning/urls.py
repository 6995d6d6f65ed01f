from django.urls import path

from pourwright.workshop.planning import buying_views, market_views, means_views, views

app_name = "planning"
urlpatterns = [
    path("", views.index, name="index"),
    path("wanted/", means_views.wanted, name="wanted"),
    path("wanted/design/<int:pk>/", means_views.design, name="design"),
    path("when/", means_views.when, name="when"),
    path("means/", means_views.means, name="means"),
    path("means/melter/<int:pk>/", means_views.melter, name="melter"),
    path("markets/", market_views.index, name="markets"),
    path("markets/<int:pk>/", market_views.market, name="market"),
    path("markets/day/<int:pk>/", market_views.day, name="market_day"),
    path("buy/", buying_views.buy, name="buy"),
    path("buy/item/<int:pk>/", buying_views.item_offers, name="item_offers"),
    path("buy/offer/<int:pk>/", buying_views.offer, name="offer"),
    path("buy/supplier/<int:pk>/", buying_views.freight, name="freight"),
    path("buy/<str:number>/", buying_views.purchase, name="purchase"),
    path("buy/<str:number>/come/", buying_views.take_in, name="take_in"),
    path("buy/<str:number>/order.pdf", buying_views.purchase_paper, name="purchase_paper"),
    path("buy/<str:supplier>/<str:on>.pdf", buying_views.order_paper, name="order_paper"),
    path("promise/", views.promise, name="promise"),
    path("what-if/", views.alternatives, name="what_if"),
    path("compare/", views.compare, name="compare"),
    path("calendar/", views.subscribe, name="subscribe"),
    path("calendar/<str:word>.ics", views.calendar, name="calendar"),
    path("melts/<int:pk>/", views.melt, name="melt"),
    path("<str:number>/", views.plan, name="plan"),
    path("<str:number>/so-far/", views.so_far, name="so_far"),
    path("<str:number>/week/<str:monday>.pdf", views.week, name="week"),
]
