//! Colours of the heat maps.
