"""What a user can do, with background jobs and cached answers. No Qt."""
