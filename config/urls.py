"""Every address of Bobbin: the two apps, people, and the home page."""

from django.urls import include, path

from config import views
from config.api.page import api_page
from config.api.v1 import api_urls
from config.earlier_addresses import earlier_urls
from config.health import views as health
from config.help import views as help_pages
from config.home import first_day_views as first_day
from config.offline import views as offline
from config.search import views as search

urlpatterns = [
    path("", views.home, name="home"),
    path("retirement-in-brief/", views.home_retirement, name="home_retirement"),
    path("first-day/", first_day.first_day, name="first_day"),
    path("first-day/put-away/", first_day.first_day_put_away, name="first_day_put_away"),
    path("first-day/show/", first_day.first_day_show, name="first_day_show"),
    path("first-day/plan/", first_day.first_day_plan, name="first_day_plan"),
    path("first-day/procedures/", first_day.first_day_procedures, name="first_day_procedures"),
    path("search/", search.search, name="search"),
    path("library/", views.library, name="library"),
    path("library/safety-features/", views.protections, name="protections"),
    path("library/api/", api_page, name="api_page"),
    path("api/v1/", api_urls()),
    path("help/", help_pages.help_index, name="help"),
    path("help/<slug:slug>/", help_pages.help_topic, name="help_topic"),
    path("style/", views.style_sheet, name="style"),
    path("", include("config.accounts.urls")),
    path("service-worker.js", offline.service_worker, name="service_worker"),
    path("device/", offline.device, name="device"),
    path("device/contact/", offline.contact, name="device_contact"),
    path("health/", health.health, name="health"),
    path("health/live/", health.live, name="health_live"),
    path("", include("fleet.urls")),
    path("", include("inspections.urls")),
    path("", include(earlier_urls)),
]

handler400 = "config.views.bad_request"
handler403 = "config.views.permission_denied"
handler404 = "config.views.page_not_found"
handler500 = "config.failures.pages.server_error"
