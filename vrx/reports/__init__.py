"""What people read: content gathered once, rendered as text."""
