"""What the forces of a session mean.

Judged trials become sets, a set yields one score (`trial_score` and the settings say which), and a score becomes force,
torque, share of body mass, side index and ratio, each with its budget of uncertainty; how much trials differ is pooled
over sets (`pooled_spread`). What is missing is named (`missing`), never guessed.

In come judged trials and settings; out comes a `SessionSummary`: plain values, no sentences.
May import: trial, statistics, acquire's values.
"""
