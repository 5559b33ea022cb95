"""The main job: one module a section of the report; each takes a Mix and returns Figures and Notices."""
