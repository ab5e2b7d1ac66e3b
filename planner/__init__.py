"""Transport oxygen requirement planner: litres, cylinders, change-overs and printable checklists."""

__version__ = "0.1.0"
