"""An audit for people and programs: as text, as tables, as JSON, as pages."""
