"""What do a lot and a reading at the bench change?"""
