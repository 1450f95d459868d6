"""What is told and shown of the season: jobs, harvest, pictures, reviews, what was learned."""
