"""The dashboard: ``create_app(store)``, one module per page, and pages stay thin."""
