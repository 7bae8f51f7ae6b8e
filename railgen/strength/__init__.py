"""Strength: loads, bending, joints, stress at holes. Checks for the designer, not approvals."""
