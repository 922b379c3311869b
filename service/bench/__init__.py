"""What a spark, a sphere gap, a probe and a supply say."""
