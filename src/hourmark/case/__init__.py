"""The case: what happened to it, as facts; what may happen next, as pure acts; and how it stands, as the fold of its facts."""
