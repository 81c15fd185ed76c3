"""The shapes that pass between the stages: frozen dataclasses with their invariants."""
