/** Version and build of this app, as told to the server. */
declare const __BUILD__: string;
