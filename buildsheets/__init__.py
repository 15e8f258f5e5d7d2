"""buildsheets: a drinks shop's YAML menu in, checked builds and laminated station cards out."""

__version__ = "0.1.0"
