"""Commands: text for people, JSON for programs. Only here do the present time and the terminal come in."""
