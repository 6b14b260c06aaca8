//! Charts: from records and forecasts to painted lines. Pure mapping apart from painting.
