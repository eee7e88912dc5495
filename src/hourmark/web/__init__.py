"""The pages: what people at the clinic see and do. Every write goes through the desk."""

SETTINGS_MODULE = "hourmark.web.settings"
"""Django's settings with everything in them: what a whole database is set up with."""

DEMO_FILES = ("ordinary-night.toml", "evening.toml")
"""What the demo moves to the present, by the names that the files have under examples/ and in the demo's folder."""
