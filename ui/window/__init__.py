"""The window: thin widgets that show what `ui.model` holds. The only place with Qt."""
