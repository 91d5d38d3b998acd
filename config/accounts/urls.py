"""Addresses of one's own account."""

from django.contrib.auth import views as auth
from django.urls import path
from django.views.decorators.http import require_http_methods

from config.accounts import second_factor, views

form_page = require_http_methods(["GET", "HEAD", "POST"])  # Django's own pages accept more methods

urlpatterns = [
    path("login/", form_page(auth.LoginView.as_view(redirect_authenticated_user=True)), name="login"),
    path("logout/", auth.LogoutView.as_view(), name="logout"),
    path("session/", views.session_left, name="session"),
    path("password/", form_page(views.PasswordChange.as_view()), name="password_change"),
    path(
        "password/<uidb64>/<token>/",
        form_page(views.PasswordSet.as_view()),
        name="password_set",
    ),
    path("second-factor/", second_factor.second_factor, name="second_factor"),
    path("second-factor/set-up/", second_factor.set_up, name="second_factor_set_up"),
    path("second-factor/remove/", second_factor.remove, name="second_factor_remove"),
    path("second-factor/ask/", second_factor.ask, name="second_factor_ask"),
]
