mod heat;
