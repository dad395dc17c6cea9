"""What the measurements of a step say: one sentence for the log, and all that led to it for the page of the step."""
