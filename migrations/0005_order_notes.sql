-- What a planner says of an order, such as why it stands where it breaks a rule.
ALTER TABLE work_order ADD COLUMN note TEXT NOT NULL DEFAULT '';
