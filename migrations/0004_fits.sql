-- Parameters of the forecast fitted to this shop: worked out from the records, kept to save time.
-- Neither undo nor the journal knows them.
CREATE TABLE fit (
    id INTEGER PRIMARY KEY,
    -- what was fitted, such as a group of spindles
    subject TEXT NOT NULL,
    -- the last day that was known to it
    fitted_on TEXT NOT NULL,
    -- the parameters as the forecast writes them
    parameters TEXT NOT NULL,
    UNIQUE (subject, fitted_on)
) STRICT;
