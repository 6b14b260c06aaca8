-- The planner's word on the next service of a spindle: not before that day, and on which day that was
-- said. A service on a later day than that makes it void; NULL: at any time.
ALTER TABLE spindle ADD COLUMN service_not_before TEXT
    CONSTRAINT "service not before is a date of 1900 to 2199"
    CHECK (service_not_before GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND service_not_before BETWEEN '1900' AND '2200');
ALTER TABLE spindle ADD COLUMN not_before_said_on TEXT
    CONSTRAINT "not before said on is a date of 1900 to 2199"
    CHECK (not_before_said_on GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]' AND not_before_said_on BETWEEN '1900' AND '2200');
