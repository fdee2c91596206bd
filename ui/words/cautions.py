"""The cautions: shown before a battery starts, stored when acknowledged, printed in what is handed on."""

CAUTIONS = (
    "Stop at once on pain, dizziness or breathlessness.",
    "Breathe out while pushing; do not hold the breath.",
    "Do not test over a recent fracture or repair, an unstable joint or acute inflammation.",
    "After surgery, or with heart or blood-pressure disease, clear it with the responsible clinician first.",
    "The examiner braces, and uses a belt for strong muscles.",
    "Local rules and licensed practice decide. Ramphold is a research and training tool, not a medical device.",
)
