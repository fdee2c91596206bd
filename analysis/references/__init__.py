"""Published strength of other people: tables, which row of them fits a person, and how a reading stands to it."""
