def digest_of(board):
    return ""
