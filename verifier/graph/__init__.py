"""Rules as guarded transitions, who drives what, slices of a job, structure findings."""
