"""What each remark says, by what it speaks of; the tables that pick them stand in remarks.py."""
