"""Pure arithmetic: plain numbers go in, frozen results with full precision come out."""
