"""What has been made and what became of it: folders checked against their tables, serials compared, releases."""
