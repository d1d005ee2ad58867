"""Root addresses."""

urlpatterns: list = []
