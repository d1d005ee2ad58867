"""What people type, cleaned into what the verbs take. Forms clean; they never save."""
